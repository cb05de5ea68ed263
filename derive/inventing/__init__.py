"""The invented world behind the demo catalogue, its known truth, and the hands that read it."""
