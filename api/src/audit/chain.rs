//! Hashes of the trail. Pure but for the salt, which the operating system gives.

use sha2::{Digest, Sha256};

use super::EntryRow;
use crate::db::door::DoorError;

/// What the first entry of a club is chained to.
pub const ORIGIN: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// 128 fresh random bits, as hexadecimal text.
pub fn new_salt() -> Result<String, DoorError> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes).map_err(|error| DoorError::Broken(format!("no random numbers: {error}")))?;
    Ok(to_hex(&bytes))
}

/// Bytes as lower-case hexadecimal text.
pub fn to_hex(bytes: &[u8]) -> String {
    let digit = |value: u8| char::from(if value < 10 { b'0' + value } else { b'a' + value - 10 });
    let mut text = String::with_capacity(bytes.len() * 2);
    for byte in bytes {
        text.push(digit(byte >> 4));
        text.push(digit(byte & 15));
    }
    text
}

/// SHA-256 of parts, each with its length before it, so that no two lists of parts read the same.
pub fn sha256(parts: &[&str]) -> String {
    let mut sha = Sha256::new();
    for part in parts {
        sha.update(part.len().to_be_bytes());
        sha.update(part.as_bytes());
    }
    to_hex(&sha.finalize())
}

/// The digest of a payload with its salt.
pub fn digest(salt: &str, payload: &str) -> String {
    sha256(&["preen payload 1", salt, payload])
}

/// The hash of an entry, from everything in it and the hash of the entry before.
pub fn hash(row: &EntryRow) -> String {
    sha256(&[
        "preen entry 1",
        &row.club_id,
        &row.revision.to_string(),
        &row.ordinal.to_string(),
        &row.recorded_at.to_string(),
        &row.recorded_by,
        &row.act,
        &row.noun,
        &row.fact_id,
        &row.digest,
        &row.previous_hash,
    ])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_cannot_slide_into_each_other() {
        assert_ne!(sha256(&["ab", "c"]), sha256(&["a", "bc"]));
        assert_ne!(sha256(&["abc"]), sha256(&["abc", ""]));
    }

    #[test]
    fn another_salt_gives_another_digest() {
        assert_ne!(digest("1", "{}"), digest("2", "{}"));
        assert_eq!(digest("1", "{}").len(), ORIGIN.len());
    }

    /// Worked out beside this project by SHA-256 (FIPS 180-4) of Python's `hashlib`, each part after its length in eight
    /// bytes, the highest first: whoever has an archive can walk its trail by any such tool.
    #[test]
    fn another_implementation_comes_to_the_same_hashes() {
        let digest = digest("00112233445566778899aabbccddeeff", "{\"tag\":\"SG-01\"}");
        assert_eq!(digest, "751868d4e1e8745ef56c2200f72ed411fddb6284df3cd39e02326fe3b3c8387a");
        let row = EntryRow {
            club_id: "quillmarsh".to_owned(),
            revision: 41,
            ordinal: 0,
            recorded_at: 1_779_350_400_000_000,
            recorded_by: "01970a3c-5d00-7000-8000-000000000001".to_owned(),
            act: "add_model".to_owned(),
            noun: "models".to_owned(),
            fact_id: "01970a3c-5d00-7000-8000-000000000002".to_owned(),
            digest,
            previous_hash: ORIGIN.to_owned(),
            hash: String::new(),
        };
        assert_eq!(hash(&row), "4b671155ef8e70ac1f115f006fcbf101d0c5d24b21ea51c0934ab23f7a334427");
    }
}
