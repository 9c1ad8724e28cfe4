//! Who answers while the service is not there yet: on the same listener, before tables are brought up to date, so that
//! whoever watches can tell a start that lasts from a service that is gone.

use std::net::TcpListener;
use std::sync::mpsc::channel;
use std::thread::JoinHandle;

use actix_web::dev::ServerHandle;
use actix_web::{App, HttpServer, ResponseError as _, web};

use super::health::{Unready, live};
use crate::problem::Problem;

/// Answers until it is dropped.
pub struct Waiting {
    handle: ServerHandle,
    thread: Option<JoinHandle<()>>,
}

impl Waiting {
    /// Begins to answer: that it runs, and for everything else that it is starting.
    ///
    /// # Errors
    /// The listener cannot be shared, or no thread be started.
    pub fn begin(listener: &TcpListener, tls: Option<rustls::ServerConfig>) -> std::io::Result<Self> {
        let listener = listener.try_clone()?;
        let (sender, begun) = channel();
        let thread = std::thread::Builder::new().name("preen-starting".to_owned()).spawn(move || {
            let answer = async move {
                let app = || {
                    let starting = || async {
                        let mut response = Problem::NotReady(Unready::Starting).error_response();
                        // The next request is for the service itself.
                        response.head_mut().set_connection_type(actix_web::http::ConnectionType::Close);
                        response
                    };
                    App::new().service(live).default_service(web::to(starting))
                };
                let server = HttpServer::new(app).workers(1).shutdown_timeout(2).disable_signals();
                let server = match tls {
                    Some(tls) => server.listen_rustls_0_23(listener, tls),
                    None => server.listen(listener),
                };
                let server = server.map(HttpServer::run);
                let handle = server.as_ref().map(actix_web::dev::Server::handle).map_err(ToString::to_string);
                // Nobody waits for it any more where the start was given up.
                let _ = sender.send(handle);
                if let Ok(server) = server
                    && let Err(error) = server.await
                {
                    tracing::warn!(%error, "nobody answered during the start");
                }
            };
            actix_web::rt::System::new().block_on(answer);
        })?;
        let handle = begun.recv().map_err(std::io::Error::other)?.map_err(std::io::Error::other)?;
        Ok(Self { handle, thread: Some(thread) })
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        // The command is sent at once; what comes back is of no interest, since the thread is waited for.
        drop(self.handle.stop(true));
        if let Some(thread) = self.thread.take()
            && thread.join().is_err()
        {
            tracing::error!("whoever answered during the start had ended by a panic");
        }
    }
}
