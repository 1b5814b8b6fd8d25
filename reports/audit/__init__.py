"""Audit statistics: what was done, how well, how fast and how sure. The log of who did what is the trail."""
