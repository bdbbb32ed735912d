"""The case base: past faults of one shop, kept as answer sheets with their outcome."""
