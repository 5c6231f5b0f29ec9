//! Which testers there are.

use crate::{Link, LinkError, Serial};
use dipsift_wire::{Health, Hello};
use serialport::SerialPortType;

/// A serial port that may have a tester on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// Its path or name, as [`Serial::open`] takes it.
    pub path: String,
    /// What the device calls itself; empty where it does not say.
    pub product: String,
}

/// Who answers at a port.
#[derive(Debug)]
pub struct Found {
    /// The port.
    pub port: Port,
    /// The tester's introduction, or why there is none.
    pub hello: Result<Hello, LinkError>,
    /// How it is, where it says so.
    pub health: Option<Health>,
}

/// The USB serial ports. Others are left out, since no byte should be sent unasked to whatever
/// sits on a built-in port; they can still be named by path.
///
/// # Errors
///
/// [`LinkError::Open`] where the system does not tell its ports.
pub fn ports() -> Result<Vec<Port>, LinkError> {
    let listed = serialport::available_ports().map_err(|error| LinkError::Open {
        port: "the list of serial ports".into(),
        source: error.into(),
    })?;
    let usb = |port: serialport::SerialPortInfo| match port.port_type {
        SerialPortType::UsbPort(usb) => {
            Some(Port { path: port.port_name, product: usb.product.unwrap_or_default() })
        }
        _ => None,
    };
    let mut ports: Vec<Port> = listed.into_iter().filter_map(usb).collect();
    ports.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(ports)
}

/// Greets every one of the [`ports`] and lists who answers.
///
/// # Errors
///
/// Those of [`ports`].
pub fn testers() -> Result<Vec<Found>, LinkError> {
    let greet = |port: Port| {
        match Serial::open(&port.path).and_then(Link::open) {
            Ok(mut link) => {
                // One that has answered a hello and fails now is shown without this.
                let health = link.health().ok().flatten();
                Found { port, hello: Ok(link.hello().clone()), health }
            }
            Err(error) => Found { port, hello: Err(error), health: None },
        }
    };
    Ok(ports()?.into_iter().map(greet).collect())
}
