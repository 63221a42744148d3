"""Where packs come from: serial ports, sockets and MQTT brokers, and how they are found.

A source never raises for what happens outside; a lost port or a wrong password is reported as an item.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.sources.mqtt import topic_filter
    from monitor.sources.mqtt_connection import MqttConnection
    from monitor.sources.mqtt_events import Connected, Disconnected, MqttMessage
    from monitor.sources.mqtt_publisher import ONLINE, MqttPublisher
    from monitor.sources.opener import open_source
    from monitor.sources.serial_discovery import UsbPort, listed_ports, usb_port
    from monitor.sources.serial_source import SerialSource, open_serial_source
    from monitor.sources.source import Info, Lost, Restored, Source, SourceItem
    from monitor.sources.url import SourceError, SourceUrl, parse_source_url

__all__ = [
    "ONLINE",
    "Connected",
    "Disconnected",
    "Info",
    "Lost",
    "MqttConnection",
    "MqttMessage",
    "MqttPublisher",
    "Restored",
    "SerialSource",
    "Source",
    "SourceError",
    "SourceItem",
    "SourceUrl",
    "UsbPort",
    "listed_ports",
    "open_serial_source",
    "open_source",
    "parse_source_url",
    "topic_filter",
    "usb_port",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "mqtt": ("topic_filter",),
            "mqtt_connection": ("MqttConnection",),
            "mqtt_events": ("Connected", "Disconnected", "MqttMessage"),
            "mqtt_publisher": ("ONLINE", "MqttPublisher"),
            "opener": ("open_source",),
            "serial_discovery": ("UsbPort", "listed_ports", "usb_port"),
            "serial_source": ("SerialSource", "open_serial_source"),
            "source": ("Info", "Lost", "Restored", "Source", "SourceItem"),
            "url": ("SourceError", "SourceUrl", "parse_source_url"),
        },
    )
