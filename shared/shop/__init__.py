"""The shop's own data: machine, rates, materials, notes on a drawing. Files are TOML or CSV, checked line by line."""
