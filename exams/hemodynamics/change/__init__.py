"""Real change told from noise."""
