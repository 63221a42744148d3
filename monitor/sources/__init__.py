"""Where packs come from: serial ports, sockets and MQTT brokers, and how they are found.

A source never raises for what happens outside; a lost port or a wrong password is reported as an item.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.sources.mqtt import (
        topic_filter,
    )
    from monitor.sources.mqtt_connection import (
        MqttConnection,
    )
    from monitor.sources.mqtt_events import (
        Connected,
        Disconnected,
        MqttMessage,
    )
    from monitor.sources.mqtt_publisher import (
        ONLINE,
        MqttPublisher,
    )
    from monitor.sources.opener import (
        open_source,
    )
    from monitor.sources.serial_discovery import (
        UsbPort,
        listed_ports,
        usb_port,
    )
    from monitor.sources.serial_port import (
        PortError,
        SerialPort,
        wait_readable,
    )
    from monitor.sources.serial_source import (
        SerialSource,
        baud_of_url,
        open_serial_source,
        port_of_url,
    )
    from monitor.sources.source import (
        Info,
        Lost,
        Restored,
        Source,
        SourceItem,
    )
    from monitor.sources.url import (
        LAYOUT_OPTIONS,
        SourceError,
        SourceUrl,
        parse_source_url,
        parse_source_urls,
    )

__all__ = [
    "LAYOUT_OPTIONS",
    "ONLINE",
    "Connected",
    "Disconnected",
    "Info",
    "Lost",
    "MqttConnection",
    "MqttMessage",
    "MqttPublisher",
    "PortError",
    "Restored",
    "SerialPort",
    "SerialSource",
    "Source",
    "SourceError",
    "SourceItem",
    "SourceUrl",
    "UsbPort",
    "baud_of_url",
    "listed_ports",
    "open_serial_source",
    "open_source",
    "parse_source_url",
    "parse_source_urls",
    "port_of_url",
    "topic_filter",
    "usb_port",
    "wait_readable",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "mqtt": ("topic_filter",),
            "mqtt_connection": ("MqttConnection",),
            "mqtt_events": (
                "Connected",
                "Disconnected",
                "MqttMessage",
            ),
            "mqtt_publisher": (
                "MqttPublisher",
                "ONLINE",
            ),
            "opener": ("open_source",),
            "serial_discovery": (
                "UsbPort",
                "listed_ports",
                "usb_port",
            ),
            "serial_port": (
                "PortError",
                "SerialPort",
                "wait_readable",
            ),
            "serial_source": (
                "SerialSource",
                "baud_of_url",
                "open_serial_source",
                "port_of_url",
            ),
            "source": (
                "Info",
                "Lost",
                "Restored",
                "Source",
                "SourceItem",
            ),
            "url": (
                "LAYOUT_OPTIONS",
                "SourceError",
                "SourceUrl",
                "parse_source_url",
                "parse_source_urls",
            ),
        },
    )
