"""How a closed mesh hangs together: its graph, the merge tree, drops, minima."""
