"""What can be worked out from readings: pure functions, one module a topic."""
