"""The cylinder cycle: valve gear, ports, walls, and the steady solution over a revolution."""
