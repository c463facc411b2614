"""Rules of the recognizer, each on a small part made for it."""
