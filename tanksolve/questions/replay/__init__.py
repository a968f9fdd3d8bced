"""What a recorded day did to a tank."""
