//! Trouble codes: two bytes to text and back, and what the generic ones mean.
