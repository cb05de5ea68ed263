"""Structure: files become typed tables of sound rows, and faults for everything else."""
