"""Parts that go from one car to another with an engine, a gearbox or an axle."""
