"""Plain parts straight from a STEP file's text: no kernel, one solid, and only what can be checked in plain numbers."""
