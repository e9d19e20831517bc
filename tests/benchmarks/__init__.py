"""How fast and how light, each beside a baseline in the same run. By hand; nothing here asserts."""
