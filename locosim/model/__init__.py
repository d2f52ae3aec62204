"""What a thing is: frozen descriptions of engine, train, line and excursion."""
