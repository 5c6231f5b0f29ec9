//! Which testers there are.

use crate::{Link, LinkError, Serial};
use dipsift_wire::Hello;
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
        let hello = Serial::open(&port.path).and_then(Link::open).map(|link| link.hello().clone());
        Found { port, hello }
    };
    Ok(ports()?.into_iter().map(greet).collect())
}
