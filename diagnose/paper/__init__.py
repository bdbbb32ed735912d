"""What is printed on paper: the report, the ticket for a screen, the procedures."""
