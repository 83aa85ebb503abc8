"""The chance that a car stops on the road over the days or the distance ahead."""
