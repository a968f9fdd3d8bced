"""One question: at these attitudes, with this liquid, what margin has each port, and is a cell proved."""
