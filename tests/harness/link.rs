//! The radio link between a phone and a service: it can be cut and mended while both go on.

use std::io::Write as _;
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;

/// A link to a service, under an address of its own.
pub struct Link {
    address: SocketAddr,
    inner: Arc<Inner>,
}

struct Inner {
    is_up: AtomicBool,
    is_stalled: AtomicBool,
    is_over: AtomicBool,
    open: Mutex<Vec<TcpStream>>,
}

impl Link {
    /// A link to where a service answers.
    pub fn to(url: &str) -> Self {
        let target: SocketAddr = url.trim_start_matches("http://").parse().unwrap();
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let inner = Arc::new(Inner {
            is_up: AtomicBool::new(true),
            is_stalled: AtomicBool::new(false),
            is_over: AtomicBool::new(false),
            open: Mutex::new(Vec::new()),
        });
        let held = Arc::clone(&inner);
        thread::spawn(move || {
            for stream in listener.incoming().map_while(Result::ok) {
                if held.is_over.load(Ordering::SeqCst) {
                    break;
                }
                if held.is_stalled.load(Ordering::SeqCst) {
                    held.open.lock().unwrap().push(stream);
                    continue;
                }
                if held.is_up.load(Ordering::SeqCst)
                    && let Ok(service) = TcpStream::connect(target)
                {
                    held.join(stream, service);
                }
            }
        });
        Self { address, inner }
    }

    /// Where the service is reached by it.
    pub fn url(&self) -> String {
        format!("http://{}", self.address)
    }

    /// Nothing comes through any more, what was on its way neither.
    pub fn cut(&self) {
        self.inner.is_up.store(false, Ordering::SeqCst);
        for stream in self.inner.open.lock().unwrap().drain(..) {
            let _ = stream.shutdown(Shutdown::Both);
        }
    }

    /// Nothing comes through any more, and nobody is told so: as with one bar of signal.
    pub fn stall(&self) {
        self.cut();
        self.inner.is_stalled.store(true, Ordering::SeqCst);
    }

    /// Everything comes through again.
    pub fn mend(&self) {
        if self.inner.is_stalled.swap(false, Ordering::SeqCst) {
            self.cut();
        }
        self.inner.is_up.store(true, Ordering::SeqCst);
    }
}

impl Inner {
    fn join(&self, phone: TcpStream, service: TcpStream) {
        for (from, to) in [(&phone, &service), (&service, &phone)] {
            let (mut from, mut to) = (from.try_clone().unwrap(), to.try_clone().unwrap());
            self.open.lock().unwrap().push(from.try_clone().unwrap());
            thread::spawn(move || {
                let _ = std::io::copy(&mut from, &mut to);
                let _ = to.flush();
                let _ = to.shutdown(Shutdown::Both);
            });
        }
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        self.inner.is_over.store(true, Ordering::SeqCst);
        self.cut();
        // Whoever waits for the next connection gets to see that it is over.
        let _ = TcpStream::connect(self.address);
    }
}
