"""What is entered about a wound, and the grades that follow from it."""
