"""Raw signals to quantities: thermocouples, pH electrodes, buffers, calibration records and their uncertainty."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.probes.buffers import all_buffers, find_buffer
    from monitor.probes.calibration_records import (
        CalibrationRecord,
        CalibrationRecords,
        FieldCheck,
        PhCalibration,
        Retraction,
        SensorConfig,
        from_json,
        records_from,
        to_json,
        validated,
    )
    from monitor.probes.conversion import (
        COLD,
        COLD_FRESH_S,
        PH,
        RAW_UNIT,
        SAMPLE,
        THERMOCOUPLES,
        ConversionTrace,
        conversion_traces,
        convert_history,
    )
    from monitor.probes.ph import BEYOND_PROBE, MOST_V, ROOM_C, nernst_v, sample_refusal
    from monitor.probes.ph_calibration import (
        BufferPoint,
        age_words,
        check_buffers,
        electrode_health,
        ph_map,
        trend_words,
    )
    from monitor.probes.stability import (
        STEADY_C,
        STEADY_PH,
        StabilityDetector,
        StabilityState,
        Stable,
        TimedOut,
        Unsettled,
    )
    from monitor.probes.two_point_correction import (
        BOILING,
        ICE,
        BathPoint,
        boiling_point_c,
        field_correction,
        station_pressure_hpa,
    )
    from monitor.probes.uncertainty import CHECKED_C, CONVERTER_C, chain_tolerance_c, wire_tolerance_c

__all__ = [
    "BEYOND_PROBE",
    "BOILING",
    "CHECKED_C",
    "COLD",
    "COLD_FRESH_S",
    "CONVERTER_C",
    "ICE",
    "MOST_V",
    "PH",
    "RAW_UNIT",
    "ROOM_C",
    "SAMPLE",
    "STEADY_C",
    "STEADY_PH",
    "THERMOCOUPLES",
    "BathPoint",
    "BufferPoint",
    "CalibrationRecord",
    "CalibrationRecords",
    "ConversionTrace",
    "FieldCheck",
    "PhCalibration",
    "Retraction",
    "SensorConfig",
    "StabilityDetector",
    "StabilityState",
    "Stable",
    "TimedOut",
    "Unsettled",
    "age_words",
    "all_buffers",
    "boiling_point_c",
    "chain_tolerance_c",
    "check_buffers",
    "conversion_traces",
    "convert_history",
    "electrode_health",
    "field_correction",
    "find_buffer",
    "from_json",
    "nernst_v",
    "ph_map",
    "records_from",
    "sample_refusal",
    "station_pressure_hpa",
    "to_json",
    "trend_words",
    "validated",
    "wire_tolerance_c",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "buffers": ("all_buffers", "find_buffer"),
            "calibration_records": (
                "CalibrationRecord",
                "CalibrationRecords",
                "FieldCheck",
                "PhCalibration",
                "Retraction",
                "SensorConfig",
                "from_json",
                "records_from",
                "to_json",
                "validated",
            ),
            "conversion": (
                "COLD",
                "COLD_FRESH_S",
                "ConversionTrace",
                "PH",
                "RAW_UNIT",
                "SAMPLE",
                "THERMOCOUPLES",
                "conversion_traces",
                "convert_history",
            ),
            "ph": ("BEYOND_PROBE", "MOST_V", "ROOM_C", "nernst_v", "sample_refusal"),
            "ph_calibration": (
                "BufferPoint",
                "age_words",
                "check_buffers",
                "electrode_health",
                "ph_map",
                "trend_words",
            ),
            "stability": (
                "STEADY_C",
                "STEADY_PH",
                "StabilityDetector",
                "StabilityState",
                "Stable",
                "TimedOut",
                "Unsettled",
            ),
            "two_point_correction": (
                "BOILING",
                "BathPoint",
                "ICE",
                "boiling_point_c",
                "field_correction",
                "station_pressure_hpa",
            ),
            "uncertainty": ("CHECKED_C", "CONVERTER_C", "chain_tolerance_c", "wire_tolerance_c"),
        },
    )
