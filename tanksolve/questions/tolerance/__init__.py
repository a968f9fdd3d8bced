"""What limits are left with fill, walls, openings and inclinometer off."""
