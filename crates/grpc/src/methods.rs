//! The methods of all services on the port, by their paths.

use std::collections::HashMap;
use std::sync::LazyLock;

use prost::Message;
use prost_types::FileDescriptorSet;

use crate::proto::DESCRIPTORS;

/// Where reflection is served, in both of its versions. Its description is not among those it gives.
const REFLECTION: [&str; 2] = [
    "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
    "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo",
];

/// Whether callers send many messages to a method, by its path.
static METHODS: LazyLock<HashMap<String, bool>> = LazyLock::new(|| {
    let mut methods = HashMap::from(REFLECTION.map(|path| (path.to_owned(), false)));
    for described in [DESCRIPTORS, tonic_health::pb::FILE_DESCRIPTOR_SET] {
        for file in FileDescriptorSet::decode(described).unwrap_or_default().file {
            for service in &file.service {
                for method in &service.method {
                    let path = format!("/{}.{}/{}", file.package(), service.name(), method.name());
                    methods.insert(path, method.client_streaming());
                }
            }
        }
    }
    methods
});

/// The method at a path, if there is one.
#[must_use]
pub fn named(path: &str) -> Option<&'static str> {
    METHODS.get_key_value(path).map(|(path, _)| path.as_str())
}

/// Whether callers send many messages to the method at a path, over any time. Reflection takes many too, all at once.
pub fn takes_a_stream(path: &str) -> bool {
    METHODS.get(path).is_some_and(|takes_a_stream| *takes_a_stream)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_callers_stream_may_take_any_time() {
        let streams: Vec<_> = METHODS.iter().filter(|(_, streams)| **streams).map(|(path, _)| path).collect();
        assert_eq!(streams, ["/baycast.v1.MaturityService/StreamEstimates"]);
    }

    #[test]
    fn only_what_is_served_is_a_method() {
        for path in ["/baycast.v1.RecordsService/ListFarms", "/grpc.health.v1.Health/Check"] {
            assert_eq!(named(path), Some(path));
        }
        assert_eq!(named("/baycast.v1.RecordsService/Listfarms"), None);
    }
}
