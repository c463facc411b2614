"""The routes, one subject a file. They translate and delegate; nothing is computed here."""
