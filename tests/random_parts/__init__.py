"""Seeded random parts whose features are known because we cut them, and changes that must not change the features."""
