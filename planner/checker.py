"""wip"""
def check(plan, features): return []
