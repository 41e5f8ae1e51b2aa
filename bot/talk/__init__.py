"""Conversations: pure steps from a state and an event to effects and messages, and all wording."""
