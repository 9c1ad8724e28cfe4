//! Archives made by hand, so that they may say what is not true: sizes, counts, and one body under many names.

use std::io::Write as _;
use std::process::{Command, Stdio};

/// Something packed: its deflated bytes, and what is said of them.
pub struct Packed {
    bytes: Vec<u8>,
    sum: [u8; 4],
    /// How long it is said to be.
    pub long: u32,
}

/// So many MiB of blanks behind a beginning, packed by a program that is quick at it.
pub fn blanks(beginning: &[u8], mib: usize) -> Packed {
    let mut child = Command::new("gzip")
        .args(["-9", "-n", "-c"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let beginning = beginning.to_vec();
    let feeding = std::thread::spawn(move || {
        let piece = vec![b' '; 1 << 20];
        stdin.write_all(&beginning).unwrap();
        (0..mib).for_each(|_| stdin.write_all(&piece).unwrap());
    });
    let packed = child.wait_with_output().unwrap().stdout;
    feeding.join().unwrap();
    // Ten bytes before and eight behind what is deflated: its sum and its length.
    let end = packed.len() - 8;
    Packed {
        bytes: packed[10..end].to_vec(),
        sum: packed[end..end + 4].try_into().unwrap(),
        long: u32::from_le_bytes(packed[end + 4..].try_into().unwrap()),
    }
}

impl Packed {
    /// As it came out of the packer, for where that is asked for.
    pub fn gzip(&self) -> Vec<u8> {
        let head = [0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 2, 3];
        [&head[..], &self.bytes, &self.sum, &self.long.to_le_bytes()].concat()
    }

    /// The same, said to be so long.
    #[must_use]
    pub fn said_to_be(self, long: u32) -> Self {
        Self { long, ..self }
    }

    fn told(&self, name: &str) -> Vec<u8> {
        let packed = u32::try_from(self.bytes.len()).unwrap().to_le_bytes();
        let name = u16::try_from(name.len()).unwrap().to_le_bytes();
        [
            &[20, 0, 0, 0, 8, 0, 0, 0, 0x21, 0x5c][..],
            &self.sum,
            &packed,
            &self.long.to_le_bytes(),
            &name,
            &[0, 0],
        ]
        .concat()
    }
}

/// An archive of these. Each is in it once, however often it is named.
pub fn zip(parts: &[(&[&str], &Packed)]) -> Vec<u8> {
    let (mut bodies, mut directory, mut count) = (Vec::new(), Vec::new(), 0_u16);
    for (names, packed) in parts {
        let at = u32::try_from(bodies.len()).unwrap();
        let first = names[0];
        bodies.extend_from_slice(
            &[&b"PK\x03\x04"[..], &packed.told(first), first.as_bytes(), &packed.bytes].concat(),
        );
        for name in *names {
            let rest = [0_u8; 10];
            directory.extend_from_slice(
                &[&b"PK\x01\x02\x14\0"[..], &packed.told(name), &rest, &at.to_le_bytes(), name.as_bytes()]
                    .concat(),
            );
            count += 1;
        }
    }
    let (length, from) = (u32::try_from(directory.len()).unwrap(), u32::try_from(bodies.len()).unwrap());
    let counts = [count.to_le_bytes(), count.to_le_bytes()].concat();
    [
        &bodies[..],
        &directory,
        b"PK\x05\x06\0\0\0\0",
        &counts,
        &length.to_le_bytes(),
        &from.to_le_bytes(),
        &[0, 0],
    ]
    .concat()
}
