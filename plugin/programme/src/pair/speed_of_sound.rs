//! The distance that sound travels in a given time.

/// Lowest air temperature accepted, °C.
pub const LEAST_CELSIUS: f64 = -40.0;
/// Highest air temperature accepted, °C.
pub const MOST_CELSIUS: f64 = 60.0;

/// Speed of sound in air in m/s, at a temperature in °C: 343.2·√(T/293.15 K), T = t + 273.15.
///
/// # Definition
/// ISO 9613-1:1993. Other published formulas differ by up to 0.4 % (humidity): 0.6 sample per metre at 48 kHz, less
/// than the uncertainty of the temperature on a set.
///
/// # Errors
/// None. Temperatures are limited to −40…60 °C; NaN counts as 20 °C.
pub fn speed_of_sound(celsius: f64) -> f64 {
    let celsius = if celsius.is_nan() { 20.0 } else { celsius.clamp(LEAST_CELSIUS, MOST_CELSIUS) };
    343.2 * ((celsius + 273.15) / 293.15).sqrt()
}

/// Path in metres that sound travels in `secs`, at a temperature in °C.
pub fn metres(secs: f64, celsius: f64) -> f64 {
    secs * speed_of_sound(celsius)
}
