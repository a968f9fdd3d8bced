"""How an up vector, an opening and a cell of attitudes are told: arrays only."""
