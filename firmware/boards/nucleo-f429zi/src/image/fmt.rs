//! Messages of development builds; nothing without the feature `log`.

#[cfg(feature = "log")]
use defmt_rtt as _;

macro_rules! info {
    ($($message:tt)*) => {{
        #[cfg(feature = "log")]
        defmt::info!($($message)*);
    }};
}

macro_rules! warning {
    ($($message:tt)*) => {{
        #[cfg(feature = "log")]
        defmt::warn!($($message)*);
    }};
}

pub(crate) use {info, warning};
