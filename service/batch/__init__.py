"""A thousand parts: one result a part, one table for all.

sources -> (study in worker processes, here or on a cluster) -> ledger -> table
"""
