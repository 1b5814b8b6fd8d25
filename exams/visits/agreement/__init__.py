"""Exams that repeat another for an agreement study, and the clinic's own noise that comes of them."""
