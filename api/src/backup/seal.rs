//! Locking a backup: to the public keys of those who may open it, or by a passphrase. The file format is the public one
//! of age (v1), so that other programs open it, too.

use std::fs;
use std::io::{self, Read, Write};
use std::path::Path;

use age::secrecy::{ExposeSecret as _, SecretString};
use age::stream::{StreamReader, StreamWriter};
use age::{Decryptor, Encryptor, scrypt, x25519};

use super::BackupError;

/// How a backup is locked.
pub enum Seal {
    /// Not at all.
    Open,
    /// To public keys.
    Recipients(Vec<x25519::Recipient>),
    /// By a passphrase.
    Passphrase(SecretString),
}

/// What opens a backup.
pub enum Key {
    /// Nothing: it must not be locked.
    None,
    /// Private keys.
    Identities(Vec<x25519::Identity>),
    /// A passphrase.
    Passphrase(SecretString),
}

fn read(path: &Path) -> Result<String, BackupError> {
    fs::read_to_string(path).map_err(BackupError::of(path))
}

fn keys_in<T: std::str::FromStr<Err = &'static str>>(path: &Path) -> Result<Vec<T>, BackupError> {
    let text = read(path)?;
    let lines = text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
    let keys: Result<Vec<T>, &'static str> = lines.map(str::parse).collect();
    let keys = keys.map_err(|error| BackupError::Key(format!("{}: {error}", path.display())))?;
    if keys.is_empty() {
        return Err(BackupError::Key(format!("{} holds no key", path.display())));
    }
    Ok(keys)
}

/// The first line of a file.
fn passphrase_in(path: &Path) -> Result<SecretString, BackupError> {
    let text = read(path)?;
    let line = text.lines().next().unwrap_or_default();
    if line.chars().count() < 12 {
        let text = format!("{}: a passphrase has at least 12 letters", path.display());
        return Err(BackupError::Key(text));
    }
    Ok(SecretString::from(line.to_owned()))
}

impl Seal {
    /// By what the settings say.
    pub fn from_files(recipients: Option<&Path>, passphrase: Option<&Path>) -> Result<Self, BackupError> {
        match (recipients, passphrase) {
            (Some(path), _) => keys_in(path).map(Self::Recipients),
            (None, Some(path)) => passphrase_in(path).map(Self::Passphrase),
            (None, None) => Ok(Self::Open),
        }
    }

    /// Whether it locks.
    pub fn is_closed(&self) -> bool {
        !matches!(self, Self::Open)
    }

    /// Locks what is written from here on.
    pub fn over<W: Write>(&self, out: W) -> io::Result<Sealed<W>> {
        let encryptor = match self {
            Self::Open => return Ok(Sealed::Open(out)),
            Self::Recipients(keys) => {
                let keys = keys.iter().map(|key| {
                    let key: &dyn age::Recipient = key;
                    key
                });
                Encryptor::with_recipients(keys).map_err(io::Error::other)?
            }
            Self::Passphrase(words) => Encryptor::with_user_passphrase(words.clone()),
        };
        encryptor.wrap_output(out).map(Box::new).map(Sealed::Closed)
    }
}

/// A writer that may lock.
pub enum Sealed<W: Write> {
    /// It does not.
    Open(W),
    /// It does.
    Closed(Box<StreamWriter<W>>),
}

impl<W: Write> Sealed<W> {
    /// Ends it.
    pub fn end(self) -> io::Result<W> {
        match self {
            Self::Open(out) => Ok(out),
            Self::Closed(out) => out.finish(),
        }
    }
}

impl<W: Write> Write for Sealed<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Self::Open(out) => out.write(bytes),
            Self::Closed(out) => out.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Self::Open(out) => out.flush(),
            Self::Closed(out) => out.flush(),
        }
    }
}

impl Key {
    /// By what the settings say.
    pub fn from_files(identities: Option<&Path>, passphrase: Option<&Path>) -> Result<Self, BackupError> {
        match (identities, passphrase) {
            (Some(path), _) => keys_in(path).map(Self::Identities),
            (None, Some(path)) => passphrase_in(path).map(Self::Passphrase),
            (None, None) => Ok(Self::None),
        }
    }

    /// Opens what is locked.
    pub fn open<R: Read>(&self, from: R) -> Result<StreamReader<R>, BackupError> {
        let wrong = |error: age::DecryptError| BackupError::Key(format!("the backup does not open: {error}"));
        let decryptor = Decryptor::new(from).map_err(wrong)?;
        match self {
            Self::None => Err(BackupError::Key(
                "the backup is locked: give --identity-file or --passphrase-file".to_owned(),
            )),
            Self::Identities(keys) => decryptor
                .decrypt(keys.iter().map(|key| {
                    let key: &dyn age::Identity = key;
                    key
                }))
                .map_err(wrong),
            Self::Passphrase(words) => {
                let identity = scrypt::Identity::new(words.clone());
                decryptor
                    .decrypt(std::iter::once({
                        let key: &dyn age::Identity = &identity;
                        key
                    }))
                    .map_err(wrong)
            }
        }
    }
}

/// Makes a pair of keys: the private one as a text to be kept away from the backups, and the public one.
pub fn new_keys() -> (String, String) {
    let identity = x25519::Identity::generate();
    let public = identity.to_public().to_string();
    let secret = identity.to_string();
    (format!("# public key: {public}\n{}\n", secret.expose_secret()), public)
}
