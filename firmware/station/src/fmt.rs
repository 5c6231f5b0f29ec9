//! Logging that vanishes without the feature `defmt`.

macro_rules! info {
    ($($message:tt)*) => {{
        #[cfg(feature = "defmt")]
        defmt::info!($($message)*);
    }};
}

macro_rules! warning {
    ($($message:tt)*) => {{
        #[cfg(feature = "defmt")]
        defmt::warn!($($message)*);
    }};
}

pub(crate) use {info, warning};
