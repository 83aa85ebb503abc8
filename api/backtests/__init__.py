"""How far this fleet's predictions for a kind were right: looked back by a job, read as stored."""
