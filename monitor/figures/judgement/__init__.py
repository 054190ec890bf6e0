"""What the inspections and measurements say: suspects, wear, service, capability, alarms."""
