"""The plan cut in simulation: what it leaves, what it gouges, what each operation removes."""
