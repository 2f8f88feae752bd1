//! Drivers: what they put on pins, what they make of sensors, and that a pin or bus in error stops nothing.

mod inputs;
mod motor;
mod outputs;
mod pulsed;
mod relays;
mod signals;
mod solenoid;
mod stepper;
