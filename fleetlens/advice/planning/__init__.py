"""The cleaning plan: who comes in when, for what and why, within the room the workshop has."""
