"""The tank file and the inline notation: text to model, model to text."""
