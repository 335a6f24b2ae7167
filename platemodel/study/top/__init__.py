"""One top and what its model answers: plate modes, stiffness under the foot, string load, sensitivity."""
