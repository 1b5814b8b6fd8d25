"""What is read of exams, and for whom. Every function costs a fixed number of queries."""
