"""conformance"""
