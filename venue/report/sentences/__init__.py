"""The words of findings: one function a finding, each claim worded in one file."""
