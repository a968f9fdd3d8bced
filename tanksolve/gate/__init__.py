"""What comes from outside passes here: files by kind and size, foreign readers in a process of their own."""
