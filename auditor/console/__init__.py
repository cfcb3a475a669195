"""Floor 5: what the terminal shows. Text from files is made visible before it is printed."""
