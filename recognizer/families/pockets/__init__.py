"""Steps, slots, open and closed pockets: bodies of upright and leaning walls, with or without a floor."""
