"""The operating day: order, kit, cost and the plan."""
