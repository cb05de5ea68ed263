"""What contributors send, whatever its form, as the exact tables of a contribution."""
