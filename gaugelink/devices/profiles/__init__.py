"""Format profiles: what a kind of gauge sends, read from TOML files."""
