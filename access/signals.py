"""Sign-in, sign-out, failures and second-factor changes, written to the trail as they happen."""
