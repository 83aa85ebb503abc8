"""What comes due when: one car's schedule, one car's and the fleet's due-soon list."""
