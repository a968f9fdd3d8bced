"""Studies: many variants of a tank, or many logs, computed in processes of their own or on a cluster."""
