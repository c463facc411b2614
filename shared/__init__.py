"""The vocabulary that recognizer, planner and service share: documents, units, errors, tables.

Imports nothing of ours, no kernel and no solver.
"""
