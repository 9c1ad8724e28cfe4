//! A service in a process of its own: what it says when it serves, how it is told to end, and how it ends.

use std::io::{BufRead as _, BufReader, Read as _};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use crate::http::Caller;

/// A service that runs.
pub struct Process {
    child: Child,
    /// A client of it.
    pub caller: Caller,
    /// The line with which it began to serve.
    pub said: String,
    log: Option<JoinHandle<String>>,
    /// Told once standard output has ended.
    over: Mutex<Receiver<()>>,
}

impl Process {
    /// Starts one and waits until it serves; its client shows this token.
    pub fn start(mut command: Command, token: &str) -> Self {
        let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
        let log = child.stderr.take().map(|mut errors| {
            std::thread::spawn(move || {
                let mut text = Vec::new();
                errors.read_to_end(&mut text).unwrap();
                String::from_utf8(text).unwrap()
            })
        });
        let mut said = BufReader::new(child.stdout.take().unwrap());
        let mut line = String::new();
        said.read_line(&mut line).unwrap();
        let url = line.trim().rsplit(' ').next().unwrap_or_default().to_owned();
        if !url.starts_with("http") {
            let logged = log.map(|log| log.join().unwrap()).unwrap_or_default();
            panic!("the service said `{line}` and {logged}");
        }
        let (sender, over) = channel();
        std::thread::spawn(move || {
            let _ = said.read_to_end(&mut Vec::new());
            let _ = sender.send(());
        });
        Self { child, caller: Caller::new(&url, token), said: line, log, over: Mutex::new(over) }
    }

    /// Its number on this machine.
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Kills it without a word.
    pub fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Sends it a signal by its name.
    pub fn signal(&self, name: &str) {
        let sent = Command::new("kill").args(["-s", name, &self.child.id().to_string()]).status().unwrap();
        assert!(sent.success());
    }

    /// Waits until it has ended, and says how and what it had logged, if that was kept (`Stdio::piped` for its errors).
    #[track_caller]
    pub fn wait(&mut self, within: Duration) -> (ExitStatus, String) {
        let over = self.over.get_mut().unwrap().recv_timeout(within);
        assert!(over.is_ok(), "it did not end within {within:?}");
        let status = self.child.wait().unwrap();
        (status, self.log.take().map(|log| log.join().unwrap()).unwrap_or_default())
    }
}

/// Nothing is left running where a check fails.
impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
