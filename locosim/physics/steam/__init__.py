"""Water and steam: properties, the property table of the cycle, flow through nozzles."""
