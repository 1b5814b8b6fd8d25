"""The healing outlook of a foot: rules, published evidence, own outcomes, what would change it."""
