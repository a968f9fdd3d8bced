"""The pump's side: suction line, budget, motion, slosh, running flow."""
