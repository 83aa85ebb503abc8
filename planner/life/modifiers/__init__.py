"""What stretches a life: storage, heat, use and grade."""
