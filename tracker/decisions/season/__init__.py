"""What a season taught and what the next one should hold: which drill works, who does what when."""
