"""The start of the rise when blood returns: found on a recorded trace, with how sure and what is wrong."""
