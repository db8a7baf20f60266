"""exercises"""
