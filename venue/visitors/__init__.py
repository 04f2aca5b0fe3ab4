"""Who plays and why: traits, beliefs, suspicion, and the choices that follow from them."""
