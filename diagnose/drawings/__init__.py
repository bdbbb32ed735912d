"""Drawings of what is worked out: for the terminal, and as SVG."""
