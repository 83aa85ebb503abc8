"""A tour: what may stop the car on it, what work beforehand would change, which spares to carry."""
