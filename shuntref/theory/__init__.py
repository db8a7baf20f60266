"""theory"""
